"""Free functions on arrays: polygons, triangles, edges, welding."""
