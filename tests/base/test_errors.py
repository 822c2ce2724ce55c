"""Expected errors: what crosses to another process is the same error."""

import pickle

from aiming.base.errors import Fault, MissingExtraError, ScenarioError


def test_errors_survive_a_process() -> None:
    faults = (Fault("a.toml", 3, 1, "aim.gap_db", "x; a number"), Fault("b.csv", 1, 7, "", "y; z"))
    again = pickle.loads(pickle.dumps(ScenarioError(faults)))
    assert again.faults == faults
    assert str(again) == str(ScenarioError(faults))
    missing = MissingExtraError(package="h5py", extra="sofa", purpose="AES69")
    assert str(pickle.loads(pickle.dumps(missing))) == str(missing)
