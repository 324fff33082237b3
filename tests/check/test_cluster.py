"""A check by the machines of a cluster says what a check on this machine says, to the last bit."""

from distributed import Client, LocalCluster

from proofkit.check import check
from proofkit.cli import main
from tests.check.conftest import PULLS
from tests.check.test_check import draw_blank, tables
from tests.workers.machines import machines


def test_a_client_in_python_gives_the_same_tables(edition, checked):
    kept = {"processes": False, "n_workers": 1, "threads_per_worker": 2, "dashboard_address": None}
    (edition / "scans" / "pull_5.tif").write_bytes(b"")
    (checked / "scans" / "pull_5.tif").write_bytes(b"")
    draw_blank(edition / "scans" / "pull_4.tif")
    draw_blank(checked / "scans" / "pull_4.tif")
    with LocalCluster(**kept) as cluster, Client(cluster, set_as_default=False) as client:
        told = []
        result = check(edition, cluster=client, progress=lambda *step: told.append(step))
    assert result.new_sheets == len(PULLS) - 1
    assert list(result.failures) == ["4", "5"]
    assert [step[1] for step in told if step[0] == "measuring"] == list(range(len(PULLS) + 1))
    check(checked)
    assert tables(edition) == tables(checked)


def test_a_worker_killed_in_the_middle_costs_time_only(edition, checked, tmp_path, monkeypatch):
    with machines(tmp_path, 2) as made:

        def kill(what, done, total):
            if (what, done) == ("measuring", 2):
                made.workers[0].kill()

        assert check(edition, cluster=made.address, progress=kill).new_sheets == len(PULLS)
        assert tables(edition) == tables(checked)
        assert check(edition, cluster=made.address).new_sheets == 0


def test_the_command_line_tells_that_nobody_answers(edition, capsys, monkeypatch):
    monkeypatch.setattr("proofkit.workers.cluster.CONNECT_S", 1.0)
    assert main(["check", str(edition), "--cluster", "tcp://127.0.0.1:9"]) == 1
    assert "No dask scheduler answers" in capsys.readouterr().err
