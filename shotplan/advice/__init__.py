"""Questions that run parts of the pipeline many times: when to go."""
