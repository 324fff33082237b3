import pytest

from proofkit.errors import FolderError
from proofkit.study.experiment import read_experiment
from proofkit.study.settings import StudySettings, read_study_settings


def experiment(folder, text, toml=""):
    (folder / "experiment.csv").write_text(text, encoding="utf-8")
    (folder / "study.toml").write_text(toml, encoding="utf-8")
    return read_experiment(folder, read_study_settings(folder))


def test_columns_are_told_apart(tmp_path):
    found = experiment(
        tmp_path,
        "pull,bite_min,wiping,depth_um,note\n1,5,palm,20,\n2,10,tissue,31,dusty\n3,20,palm,40,\n",
        'responses = ["depth_um"]\n[factors.wiping]\nreference = "tissue"\nlabel = "last wipe"\n'
        '[factors.bite_min]\nscale = "log"\n',
    )
    assert found.keys == ("pull",)
    assert [(f.name, f.kind, f.unit, f.scale, f.levels) for f in found.factors] == [
        ("bite_min", "number", "min", "log", ()),
        ("wiping", "word", "", "linear", ("tissue", "palm")),
    ]
    assert found.responses == ("depth_um",)
    assert found.factors[1].label == "last wipe"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "experiment.csv is empty, allowed is a header row and a row for each entry"),
        ("pull,bite_min\n", "has no rows"),
        ("pull,bite_min\n1,5\n2,5\n", "no factor that varies. Factor bite_min never varies (always 5.0)"),
        (
            "pull,bite_min\n1,-5\n2,5\n",
            "line 2: bite_min is -5, allowed is 0 to 20000 (min; a time is never negative)",
        ),
        ("pull,bath_c\n1,20\n2,160\n", "Fahrenheit"),
        ("pull,bite_min\n1,5 min\n2,10\n", "line 2: bite_min is '5 min', the others are numbers"),
        ("pull,oil_fraction\n1,30\n2,0.4\n", "0 to 1; percent would be _percent"),
        ("pull,wiping\n1,palm\n2,\n", "line 3: wiping is empty"),
        ("pull,wiping\n1,palm\n1,tissue\n", "line 3: pull '1' stands in line 2 already"),
        ("pull,wiping\n,palm\n2,tissue\n", "line 2: pull is empty"),
    ],
)
def test_what_is_wrong_is_said_in_one_line(tmp_path, text, told):
    with pytest.raises(FolderError) as error:
        experiment(tmp_path, text)
    assert told in str(error.value)
    assert str(error.value).count("\n") == 0
    assert ".." not in str(error.value)


def test_a_factor_that_never_varies_is_told_and_the_others_go_on(tmp_path):
    found = experiment(tmp_path, "pull,bath_c,bite_min\n1,20,5\n2,20,10\n")
    assert [factor.name for factor in found.factors] == ["bite_min"]
    assert "bath_c never varies" in found.remarks[0]


def test_codes_of_recipes_are_words(tmp_path):
    (factor,) = experiment(tmp_path, "pull,recipe\n1,A\n2,B\n3,7\n").factors
    assert factor.kind == "word"


def test_a_missing_table_is_asked_for(tmp_path):
    with pytest.raises(FolderError, match=r"no experiment\.csv"):
        read_experiment(tmp_path, StudySettings())


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("question = 5", "question is '5', allowed is text"),
        ('interactions = ["bite_min"]', "two factors with a colon"),
        ('[factors.bite_min]\nscale = "cubic"', "allowed is one of 'linear', 'log'"),
        ('responses = "line_load_um"', "allowed is a list"),
        ("x = ", "not TOML"),
    ],
)
def test_settings_with_faults_are_told(tmp_path, text, told):
    (tmp_path / "study.toml").write_text(text, encoding="utf-8")
    with pytest.raises(FolderError) as error:
        read_study_settings(tmp_path)
    assert told in str(error.value)


def test_keys_that_are_not_known_are_remarked(tmp_path):
    (tmp_path / "study.toml").write_text("mood = 1\n[methods]\nweather = 'wet'\n", encoding="utf-8")
    remarks = read_study_settings(tmp_path).remarks
    assert len(remarks) == 2
