"""Over terrain posts: nearest surface, rays, slopes, edges, walking."""
