"""dawnline keeps watch over a pond's pH."""

__version__ = "0.1.0"
