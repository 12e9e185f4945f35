"""The parametric heart and thorax: shapes, motion, slicing, and how a probe stands to them."""
