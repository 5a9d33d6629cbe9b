"""After the show: what happened, when, to which feet of film, and what the alarms themselves were like."""
