"""Read and lay out the plain files of an edition folder."""
