"""Stock geometry, papers, PDFs."""
