"""`proofkit bench` opens the notebook that fits a folder, and says in one line why it cannot."""

import os
import re
import signal
import subprocess
import sys
import threading
import urllib.error
import urllib.request

import pytest

from proofkit.errors import FolderError
from proofkit.folder.read import read_edition
from proofkit.widgets.opening import NOTEBOOKS, fitting_job, lab_command, prepare_notebook


def test_an_edition_is_checked(edition):
    assert fitting_job(read_edition(edition)) == "check"


@pytest.mark.parametrize(
    ("pulls", "settings", "job"),
    [
        ("pull,scan,kind\n1,a.tif,trial proof\n2,b.tif,trial proof\n", "", "choose"),
        ("pull,scan,state\n1,a.tif,I\n2,b.tif,II\n", 'standard = "1"\n', "compare"),
        ("pull,scan,kind\n1,a.tif,trial proof\n2,b.tif,edition\n", "", "check"),
    ],
)
def test_other_folders_have_other_jobs(edition, pulls, settings, job):
    (edition / "pulls.csv").write_text(pulls, encoding="utf-8")
    (edition / "edition.toml").write_text(settings, encoding="utf-8")
    assert fitting_job(read_edition(edition)) == job


def test_a_table_of_an_experiment_asks_for_a_study(edition):
    (edition / "relays.csv").write_text("pull,scan\n", encoding="utf-8")
    assert fitting_job(read_edition(edition)) == "study"


def test_the_notebook_is_copied_once_and_then_left_alone(edition):
    copy = prepare_notebook(edition, "check")
    assert copy == edition / "results" / "bench" / NOTEBOOKS["check"]
    copy.write_text("changed by a person", encoding="utf-8")
    assert prepare_notebook(edition, "check").read_text(encoding="utf-8") == "changed by a person"


def test_a_folder_that_is_no_edition_is_refused(tmp_path):
    with pytest.raises(FolderError, match="no scans"):
        prepare_notebook(tmp_path)


def test_the_server_listens_on_this_machine_only(edition):
    command = lab_command(edition / "a.ipynb", with_browser=False)
    assert "--ServerApp.ip=127.0.0.1" in command
    assert not any("token" in part for part in command)  # the server makes a fresh one for each start


def heed_ctrl_c():
    """A shell that starts the tests in the background lets them, and all that they start, ignore SIGINT."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def status_without_token(base):
    """What the server answers to someone who has no token; it says its address before it listens."""
    pause = threading.Event()
    for _ in range(600):
        try:
            urllib.request.urlopen(f"{base}/api/contents", timeout=30)  # noqa: S310 (our own server)
        except urllib.error.HTTPError as error:
            return error.code
        except urllib.error.URLError:
            pause.wait(0.1)
    return None


@pytest.mark.slow
def test_the_command_serves_with_a_token_and_stops_at_ctrl_c(edition, tmp_path):
    names = {"JUPYTER_CONFIG_DIR": "config", "JUPYTER_DATA_DIR": "data", "JUPYTER_RUNTIME_DIR": "runtime"}
    own = {name: str(tmp_path / folder) for name, folder in names.items()}
    command = [sys.executable, "-m", "proofkit", "bench", str(edition), "--no-browser"]
    process = subprocess.Popen(
        command, env=os.environ | own, stderr=subprocess.PIPE, text=True, start_new_session=True,
        preexec_fn=heed_ctrl_c,  # noqa: PLW1509 -- no thread of ours holds a lock that the child could need
    )  # fmt: skip
    try:
        said = ""
        address = None
        for line in process.stderr:
            said += line
            if address := re.search(r"http://127\.0\.0\.1:\d+/\S*token=\w+", line):
                break
        assert address, said
        assert status_without_token(address[0].split("/doc/")[0]) == 403
        os.killpg(process.pid, signal.SIGINT)
        assert process.wait(60) == 0
    finally:
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()
        process.stderr.close()
