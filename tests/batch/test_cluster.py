"""A batch on a real Dask cluster of several worker processes on this machine."""

import contextlib
import os
import signal
import socket
import subprocess
import sys
import threading
import time

import pytest

from settscan.batch.run import Machine
from settscan.errors import BadInput
from tests.batch import fakes
from tests.batch.test_run import contents, run, table

distributed = pytest.importorskip("distributed")

# Dask's own clean-up speaks up when processes are killed on purpose.
pytestmark = pytest.mark.filterwarnings("default")


@pytest.fixture(scope="module")
def cluster():
    import dask

    with (
        dask.config.set({"distributed.worker.daemon": False}),
        distributed.LocalCluster(
            n_workers=3, threads_per_worker=1, processes=True, host="127.0.0.1",
            dashboard_address="127.0.0.1:0",
            silence_logs=50,
        ) as made,
    ):  # fmt: skip
        yield made


def on(cluster, folder, out, **more):
    machine = Machine(scheduler=cluster.scheduler_address)
    return run(folder, out, machine=machine, **more)


def test_the_cluster_gives_the_same_output_as_one_machine(tmp_path, cluster):
    folder = fakes.photos(tmp_path / "in", "a.png", "b_two.png", "c_refused.png", "fault.png")
    (folder / "empty.jpg").write_bytes(b"")
    summary = on(cluster, folder, tmp_path / "many")
    assert summary.counts == {"read": 3, "refused": 1, "failed": 2}
    run(folder, tmp_path / "one")
    assert contents(tmp_path / "many") == contents(tmp_path / "one")


def test_a_worker_killed_in_mid_run_costs_nothing(tmp_path, cluster):
    names = [f"p{n:02d}_slow.png" for n in range(24)]
    folder, out = fakes.photos(tmp_path / "in", *names), tmp_path / "out"
    with distributed.Client(cluster, set_as_default=False) as client:
        processes = client.run(os.getpid)
    victim = sorted(processes.values())[0]
    killed = []

    def kill():
        records = out / "state" / "records"
        deadline = time.monotonic() + 60
        while sum(1 for _ in records.glob("*/*.json")) < 5 and time.monotonic() < deadline:
            time.sleep(0.01)
        os.kill(victim, signal.SIGKILL)
        killed.append(sum(1 for _ in records.glob("*/*.json")))

    killer = threading.Thread(target=kill)
    killer.start()
    summary = on(cluster, folder, out)
    killer.join()
    assert killed and 5 <= killed[0] < 24  # in mid-run
    assert summary.counts == {"read": 24}
    # a photo is begun again only if it was in the dead worker's hands
    assert set(fakes.calls(folder)) == set(names)
    assert len(fakes.calls(folder)) <= 25
    assert not table(out / "failures.csv")
    run(folder, tmp_path / "plain")
    assert contents(out) == contents(tmp_path / "plain")


def test_a_photo_that_ends_every_worker_is_named(tmp_path, cluster):
    folder = fakes.photos(tmp_path / "in", "a.png", "deadly.png", "z.png")
    summary = on(cluster, folder, tmp_path / "out")
    assert summary.counts == {"read": 2, "failed": 1}
    (failure,) = table(tmp_path / "out" / "failures.csv")
    assert failure["file"] == "deadly.png" and "was ended" in failure["reason"]


def test_no_scheduler_is_a_sentence(tmp_path):
    folder = fakes.photos(tmp_path / "in", "a.png")
    for address in ("tcp://127.0.0.1:9", "nonsense", "tcp://"):
        with pytest.raises(BadInput, match="No Dask scheduler answers"):
            run(folder, tmp_path / "out", machine=Machine(scheduler=address))


def test_what_answers_but_is_no_scheduler_is_a_sentence(tmp_path):
    folder = fakes.photos(tmp_path / "in", "a.png")
    with socket.create_server(("127.0.0.1", 0)) as server:

        def answer():
            with contextlib.suppress(OSError):
                while True:
                    other, _ = server.accept()
                    other.sendall(b"HTTP/1.1 400 Bad Request\r\nContent-Length: 0\r\n\r\n")

        threading.Thread(target=answer, daemon=True).start()
        address = f"tcp://127.0.0.1:{server.getsockname()[1]}"
        with pytest.raises(BadInput, match="No Dask scheduler answers"):
            run(folder, tmp_path / "out", machine=Machine(scheduler=address))
    with pytest.raises(BadInput, match="certificates"):
        run(folder, tmp_path / "out", machine=Machine(scheduler="tls://127.0.0.1:9"))


def test_nothing_is_said_after_the_sentence(tmp_path):
    """A connection that is only let go complains at the end of the program."""
    fakes.photos(tmp_path / "in", "a.png")
    done = subprocess.run(
        [sys.executable, "-c", "from settscan.cli import main; main()", "batch", "in",
         "-o", "out", "-q", "--scheduler", "nonsense"],
        cwd=tmp_path, capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode == 2 and done.stdout == ""
    assert done.stderr.startswith("settscan: No Dask scheduler answers at nonsense.")
    assert done.stderr.count("\n") == 1


def test_workers_that_cannot_do_the_work_are_told(tmp_path):
    from settscan import __version__
    from settscan.batch.cluster import _check, answer_of

    with pytest.raises(BadInput, match="no workers"):
        _check({}, "x")
    with pytest.raises(BadInput, match="has no settscan"):
        _check({"tcp://w": ModuleNotFoundError("settscan")}, "x")
    with pytest.raises(BadInput, match=r"has settscan 0\.0\.0"):
        _check({"tcp://w": ("0.0.0", "x")}, "x")
    with pytest.raises(BadInput, match="does not see the folder"):
        _check({"tcp://w": answer_of(str(tmp_path / "none"))}, "x")
    (tmp_path / "proof").write_text("x")
    assert answer_of(str(tmp_path / "proof")) == (__version__, "x")


def test_without_dask_it_says_how_to_get_it(tmp_path, monkeypatch):
    import sys

    monkeypatch.setitem(sys.modules, "distributed", None)
    folder = fakes.photos(tmp_path / "in", "a.png")
    with pytest.raises(BadInput, match=r"settscan\[dask\]|not installed"):
        run(folder, tmp_path / "out", machine=Machine(scheduler="tcp://127.0.0.1:9"))


def test_a_scheduler_that_goes_away_ends_the_run_with_a_sentence(tmp_path):
    """What was done stays done: the same command on this machine reads the rest."""
    names = [f"p{n:02d}_slow.png" for n in range(30)]
    folder, out = fakes.photos(tmp_path / "in", *names), tmp_path / "out"
    going = distributed.LocalCluster(
        n_workers=2,
        threads_per_worker=1,
        processes=True,
        host="127.0.0.1",
        dashboard_address="127.0.0.1:0",
        silence_logs=50,
    )

    def leave():
        records = out / "state" / "records"
        deadline = time.monotonic() + 60
        while sum(1 for _ in records.glob("*/*.json")) < 4 and time.monotonic() < deadline:
            time.sleep(0.01)
        going.close()

    leaver = threading.Thread(target=leave)
    leaver.start()
    with pytest.raises(BadInput, match="was lost"):
        on(going, folder, out)
    leaver.join()
    done = sum(1 for _ in (out / "state" / "records").glob("*/*.json"))
    assert 4 <= done < 30
    assert run(folder, out).counts == {"read": 30}
