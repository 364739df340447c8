"""Fleet battery care."""

__version__ = "0.1.0"
