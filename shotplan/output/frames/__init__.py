"""The storyboard: what the camera sees."""
