"""Lots as multi-crop passport descriptors, FAO/Bioversity V.2.1 (December 2015), in CSV."""
