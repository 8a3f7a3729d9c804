"""The pages of the office: answers, open trenches, people, figures, words. They never change a turn."""
