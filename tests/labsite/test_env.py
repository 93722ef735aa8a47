"""The environment is read strictly: what cannot be understood stops the start with the variable's name."""

import pytest

from labsite import env


@pytest.fixture
def setting(monkeypatch):
    """``setting(NAME=value)`` sets LABSITE_NAME; nothing else with the prefix is set."""
    for name in [*env.os.environ]:
        if name.startswith(env.PREFIX):
            monkeypatch.delenv(name)

    def give(**values):
        for name, value in values.items():
            monkeypatch.setenv(env.PREFIX + name, str(value))

    return give


def test_a_missing_value_is_named_with_both_ways_to_give_it(setting):
    with pytest.raises(
        env.EnvironmentFault, match=r"LABSITE_SECRET_KEY must be set .*LABSITE_SECRET_KEY_FILE"
    ):
        env.text("SECRET_KEY")
    with pytest.raises(env.EnvironmentFault, match=r"LABSITE_TIME_ZONE must be set\.$"):
        env.text("TIME_ZONE")


def test_a_secret_may_come_from_a_file_but_not_from_both(setting, tmp_path):
    (tmp_path / "key").write_text("from the file\n")
    setting(SECRET_KEY_FILE=tmp_path / "key")
    assert env.text("SECRET_KEY") == "from the file"
    setting(SECRET_KEY="given")
    with pytest.raises(env.EnvironmentFault, match="not both"):
        env.text("SECRET_KEY")


def test_a_secret_file_that_is_not_there_is_named(setting, tmp_path):
    setting(SECRET_KEY_FILE=tmp_path / "nothing")
    with pytest.raises(env.EnvironmentFault, match=r"LABSITE_SECRET_KEY_FILE: .*nothing cannot be read"):
        env.text("SECRET_KEY")


@pytest.mark.parametrize(("value", "expected"), [("1", True), ("Yes", True), ("off", False), ("", False)])
def test_flags(setting, value, expected):
    setting(DEBUG=value)
    assert env.flag("DEBUG", False) is expected


@pytest.mark.parametrize(
    ("read", "name", "value"),
    [
        (lambda: env.flag("DEBUG", False), "DEBUG", "perhaps"),
        (lambda: env.integer("TRUSTED_PROXIES", 0), "TRUSTED_PROXIES", "-1"),
        (lambda: env.integer("TRUSTED_PROXIES", 0), "TRUSTED_PROXIES", "1.0"),
        (lambda: env.choice("MODE", ("embedded", "production"), "embedded"), "MODE", "prod"),
        (lambda: env.database("DATABASE_URL"), "DATABASE_URL", "mysql://lab@db/lab"),
        (lambda: env.database("DATABASE_URL"), "DATABASE_URL", "postgresql://lab@db"),
        (lambda: env.database("DATABASE_URL"), "DATABASE_URL", "postgresql://lab@db:port/lab"),
        (lambda: env.redis("REDIS_URL", "REDIS_PASSWORD"), "REDIS_URL", "localhost:6379"),
        (lambda: env.redis("REDIS_URL", "REDIS_PASSWORD"), "REDIS_URL", "redis://db:99999/0"),
        (lambda: env.time_zone("TIME_ZONE", "UTC"), "TIME_ZONE", "Utopia/Capital"),
    ],
)
def test_a_value_that_makes_no_sense_is_refused_by_name(setting, read, name, value):
    setting(**{name: value})
    with pytest.raises(env.EnvironmentFault, match=f"LABSITE_{name}"):
        read()


def test_words_lose_spaces_and_empty_places(setting):
    setting(ALLOWED_HOSTS=" lab.example.org, ,10.0.0.5 ")
    assert env.words("ALLOWED_HOSTS") == ["lab.example.org", "10.0.0.5"]


def test_a_database_address_with_its_password_apart(setting):
    setting(DATABASE_URL="postgresql://lab@db:5433/grey%20lab?sslmode=require", DATABASE_PASSWORD="p@ss/word")
    assert env.database("DATABASE_URL", "DATABASE_PASSWORD") == {
        "ENGINE": "django.db.backends.postgresql",
        "NAME": "grey lab",
        "USER": "lab",
        "PASSWORD": "p@ss/word",
        "HOST": "db",
        "PORT": "5433",
        "OPTIONS": {"sslmode": "require"},
    }


def test_a_password_inside_the_address_wins(setting):
    setting(DATABASE_URL="postgresql://lab:in%40side@db/lab", DATABASE_PASSWORD="apart")
    assert env.database("DATABASE_URL", "DATABASE_PASSWORD")["PASSWORD"] == "in@side"


def test_a_broker_password_is_put_into_the_address_quoted(setting):
    setting(REDIS_URL="redis://redis:6379/0", REDIS_PASSWORD="p@ss/word")
    assert env.redis("REDIS_URL", "REDIS_PASSWORD") == "redis://:p%40ss%2Fword@redis:6379/0"


def test_a_secret_key_is_made_once_and_is_its_owners_alone(tmp_path):
    path = tmp_path / "new" / "secret_key"
    key = env.secret_file(path)
    assert len(key) >= 50
    assert path.stat().st_mode & 0o777 == 0o600
    assert path.parent.stat().st_mode & 0o777 == 0o700  # the database will lie beside it
    assert env.secret_file(path) == key


def test_a_data_folder_that_cannot_be_made_is_said_plainly(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(env.EnvironmentFault, match="LABSITE_DATA_DIR"):
        env.secret_file(tmp_path / "file" / "secret_key")


def test_a_misspelt_name_is_reported_with_the_one_that_was_meant(setting):
    setting(ALLOWED_HOST="lab.example.org", SECRET_KEY_FILE="/x", TIME_ZONE="UTC")
    assert env.unknown_names() == [("LABSITE_ALLOWED_HOST", "LABSITE_ALLOWED_HOSTS")]
