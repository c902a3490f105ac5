"""What an experienced colleague would say about a layout: one small function a rule."""
