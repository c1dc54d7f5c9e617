"""aircraft."""
