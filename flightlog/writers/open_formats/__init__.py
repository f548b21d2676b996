"""The cleaned track in open formats: GPX, GeoJSON, KML, CSV, Parquet and IGC."""
