"""The suite's own guard: a test that leaves something running, or open, fails."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent
LEAKS = """
import asyncio, socket, threading, warnings

async def test_leaves_a_task():
    asyncio.create_task(asyncio.sleep(60))

async def test_ends_its_task():
    task = asyncio.create_task(asyncio.sleep(60))
    task.cancel()

def test_leaves_a_thread():
    threading.Thread(target=threading.Event().wait, daemon=True, name="left behind").start()

async def test_borrows_a_thread():
    await asyncio.to_thread(int)

def test_leaves_a_socket():
    socket.socket()

def test_warns():
    warnings.warn("soon gone", DeprecationWarning)
"""


def test_a_test_that_leaves_a_task_a_thread_or_a_socket_behind_fails(tmp_path: Path) -> None:
    shutil.copy(HERE.parent / "conftest.py", tmp_path)
    (tmp_path / "test_leaks.py").write_text(LEAKS)
    config = HERE.parents[1] / "pyproject.toml"
    ran = subprocess.run(
        [
            sys.executable,
            "-m",
            "pytest",
            "-c",
            config,
            "--rootdir",
            tmp_path,
            "-p",
            "no:cacheprovider",
            tmp_path,
        ],
        capture_output=True,
        text=True,
        check=False,
    )
    told = set(re.findall(r"^(?:ERROR|FAILED) \S+::(\w+)", ran.stdout, re.MULTILINE))
    assert told == {"test_leaves_a_task", "test_leaves_a_thread", "test_leaves_a_socket", "test_warns"}, (
        ran.stdout
    )
    assert "left behind" in ran.stdout
    assert ran.returncode == 1
