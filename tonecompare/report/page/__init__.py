"""The page: results into views, views into HTML."""
