"""Draws the sample photos: cloth, light and lens, from known truth."""
