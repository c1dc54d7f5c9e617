"""Numbers in, numbers out: numpy only (footprints also shapely). No files, no clock."""
