"""What a vessel's heat does, what a run taught, what a wet skein keeps; experiments.

Revision 0003. What was there keeps its meaning: no vessel is measured yet, and the lessons of runs on record are
computed when the studio is next opened to learn.
"""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    # SQLite cannot add a constraint to a table that is there, so that a new column brings its own.
    double = sa.Double().compile(op.get_bind().dialect)
    op.execute(
        f"ALTER TABLE base ADD COLUMN kept_l_kg {double} CONSTRAINT ck_base_kept_above_zero CHECK (kept_l_kg > 0)"
    )
    _add_what_is_learnt()
    _add_experiments()


def _add_what_is_learnt() -> None:
    op.create_table(
        "heat_up",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("vessel_id", sa.Integer(), nullable=False),
        sa.Column("knob", sa.String(length=40), nullable=False),
        sa.Column("water_l", sa.Double(), nullable=False),
        sa.Column("has_lid", sa.Boolean(), nullable=False),
        sa.Column("readings", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("room_c", sa.Double(), nullable=False),
        sa.Column("measured_on", sa.Date(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.CheckConstraint("water_l > 0", name=op.f("ck_heat_up_water_above_zero")),
        sa.ForeignKeyConstraint(
            ["vessel_id"], ["vessel.id"], name=op.f("fk_heat_up_vessel_id_vessel"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_heat_up")),
    )
    op.create_index(op.f("ix_heat_up_vessel_id"), "heat_up", ["vessel_id"])
    op.create_table(
        "lesson",
        sa.Column("run_id", sa.Uuid(), nullable=False),
        sa.Column("made_with", sa.String(length=80), nullable=False),
        sa.Column("content", sa.JSON(none_as_null=True), nullable=False),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_lesson_run_id_run"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("run_id", name=op.f("pk_lesson")),
    )


def _add_experiments() -> None:
    op.create_table(
        "experiment",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("factor", sa.String(length=40), nullable=False),
        sa.Column("card_toml", sa.Text(), nullable=False),
        sa.Column("base_id", sa.Integer(), nullable=True),
        sa.Column("sample_g", sa.Double(), nullable=False),
        sa.Column("created_on", sa.Date(), nullable=False),
        sa.Column("judgement_id", sa.Uuid(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.CheckConstraint("sample_g > 0", name=op.f("ck_experiment_sample_above_zero")),
        sa.ForeignKeyConstraint(["base_id"], ["base.id"], name=op.f("fk_experiment_base_id_base")),
        sa.ForeignKeyConstraint(["judgement_id"], ["judgement.id"], name=op.f("fk_experiment_judgement_id_judgement")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_experiment")),
        sa.UniqueConstraint("name", name=op.f("uq_experiment_name")),
    )
    op.create_table(
        "sample",
        sa.Column("experiment_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("value", sa.Double(), nullable=True),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("run_id", sa.Uuid(), nullable=True),
        sa.Column("lab_l", sa.Double(), nullable=True),
        sa.Column("lab_a", sa.Double(), nullable=True),
        sa.Column("lab_b", sa.Double(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.CheckConstraint("number > 0", name=op.f("ck_sample_number_above_zero")),
        sa.ForeignKeyConstraint(
            ["experiment_id"], ["experiment.id"], name=op.f("fk_sample_experiment_id_experiment"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_sample_run_id_run")),
        sa.PrimaryKeyConstraint("experiment_id", "number", name=op.f("pk_sample")),
        sa.UniqueConstraint("run_id", name=op.f("uq_sample_run_id")),
    )
