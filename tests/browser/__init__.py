"""What only a browser shows: the bench in JupyterLab, driven by its accessible names."""
