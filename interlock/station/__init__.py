"""A far booth's end of the watch: serves its adapters to the desk over a broker. Watches, and moves nothing."""
