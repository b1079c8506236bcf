"""The review window. Qt lives here and nowhere else."""
