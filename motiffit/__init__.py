"""Sizes the centre of a log cabin block from a photo of an outgrown garment."""
