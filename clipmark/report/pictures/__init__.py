"""Pictures as SVG, and stills out of the film."""
