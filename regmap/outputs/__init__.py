"""The only place that writes: proof pictures, pairs, georeferences, GeoJSON, stored fits."""
