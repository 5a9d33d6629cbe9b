"""The desk as a process: drivers → bus → desk → journal, screens.

::

    folding      the one place that calls Desk.step, and hands on what it says
    running      the tasks of a live desk, and the order in which they end
    drivers_run  drivers as supervised tasks
    rehearsal    the simulator in the drivers' place, paced or as fast as it goes
    place        where a desk's files are, and the lock that says it runs
    sockets      the one function with which screens reach a desk
    screens      everything to every screen, without ever waiting for one; outbox: what waits for one
    detached     the desk in a session of its own; spawn starts it
    connection   a screen's end of the socket
    plain        one JSON object a line, actions on standard input

Import what you need from the module itself: a desk needs no screen and a screen no desk.
"""
