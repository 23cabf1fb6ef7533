"""What the plan shows: answer, board, curves, map, road strip, heat balance, cautions."""
