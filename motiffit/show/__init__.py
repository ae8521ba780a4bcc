"""Something to look at, made from records: pictures, tables, true-scale pages."""
