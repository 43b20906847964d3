"""Text becomes sound: rendering, cache, loudspeaker."""
