"""Diagnosis, replacement and proof for tool-clamp assemblies of machining-centre spindles."""
