"""OpenStreetMap extracts: what stands near the ride, and who may be there."""
