"""The only readers: pictures, outlines in any Python shape, outlines in any text."""
