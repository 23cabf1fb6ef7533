"""What several questions share: wording, cautions, SVG, executors."""
