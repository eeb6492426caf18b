"""Verdicts that can be traced: their marks and further photos, work that waits, cautions for buyers, wet and dry.

Revision 0004. What was there keeps its meaning: old verdicts have no marks, old skeins no caution, and the set that a
skein stands in was proposed by nobody that is known.
"""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    json = sa.JSON(none_as_null=True)
    op.add_column("judgement", sa.Column("marks", json, nullable=True))
    op.add_column("judgement", sa.Column("more_photo_ids", json, nullable=True))
    op.add_column("skein", sa.Column("proposed_set", sa.String(length=40), nullable=True))
    op.add_column("skein", sa.Column("caution", sa.Text(), server_default="", nullable=False))
    op.add_column("lot", sa.Column("judgement_id", sa.Uuid(), nullable=True))
    _add_photo_work(json)
    _add_wet_pairs()


def _add_photo_work(json: sa.JSON) -> None:
    op.create_table(
        "photo_work",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("run_id", sa.Uuid(), nullable=True),
        sa.Column("photo_ids", json, nullable=False),
        sa.Column("marks", json, nullable=False),
        sa.Column("state", sa.String(length=40), nullable=False),
        sa.Column("asked_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("done_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("judgement_id", sa.Uuid(), nullable=True),
        sa.Column("sentence", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_photo_work_run_id_run")),
        sa.ForeignKeyConstraint(["judgement_id"], ["judgement.id"], name=op.f("fk_photo_work_judgement_id_judgement")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photo_work")),
    )
    op.create_index(op.f("ix_photo_work_state"), "photo_work", ["state"])


def _add_wet_pairs() -> None:
    op.create_table(
        "wet_pair",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("base_id", sa.Integer(), nullable=False),
        *(sa.Column(f"{state}_{axis}", sa.Double(), nullable=False) for state in ("wet", "dry") for axis in "lab"),
        sa.Column("measured_on", sa.Date(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["base_id"], ["base.id"], name=op.f("fk_wet_pair_base_id_base"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_wet_pair")),
    )
    op.create_index(op.f("ix_wet_pair_base_id"), "wet_pair", ["base_id"])
