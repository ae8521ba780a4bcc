"""The stages from photo to window: pixels in, millimetres out."""
