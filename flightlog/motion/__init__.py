"""From a Track to cleaned movement."""
