"""How everything looks: colours, themes, icons, painting helpers, words of the window, print."""
