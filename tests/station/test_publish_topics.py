"""What the desk's topics are called."""

from __future__ import annotations

from interlock.service.publish import alarm_topic
from interlock.watch.state import AlarmLine


def test_an_alarms_topic_is_one_whatever_its_subject_is_called() -> None:
    def topic(subject: str) -> str:
        line = AlarmLine(
            seq=0, at="", show_s=None, code="adapter-lost", subject=subject, state="unacknowledged",
            priority="high", first_out=False, group=None, text="", values={},
        )  # fmt: skip
        return alarm_topic("booth", line)

    assert topic("4>3") == "longlace/booth/desk/alarm/adapter-lost/4>3"
    assert topic("a/+#b") == "longlace/booth/desk/alarm/adapter-lost/a%2F%2B%23b"
    assert len({topic(s) for s in ("a/b", "a%2Fb", "a b", "ab")}) == 4
