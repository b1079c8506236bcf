"""The Pair page: who, when, which film."""
