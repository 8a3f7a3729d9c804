"""One channel a file; `bot.channel.found` walks this folder."""
