"""What a swatch, a target and a tub say of themselves; palettes from pictures; swatch evenings.

Revision 0002. What was there keeps its meaning: a swatch counts as read once, a target as typed, a tub has no lot.
"""

from decimal import Decimal

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def exact(places: int) -> sa.Numeric[Decimal]:
    """An exact number: SQLite keeps whole units of the last digit."""
    return sa.Numeric(18, places).with_variant(sa.BigInteger(), "sqlite")


def upgrade() -> None:
    _say_more()
    _add_evenings()


def _say_more() -> None:
    for table in ("dye", "swatch_dye"):
        op.add_column(table, sa.Column("dye_lot", sa.String(length=200), nullable=False, server_default=""))
    op.create_table(
        "palette",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("photo_id", sa.Uuid(), nullable=True),
        sa.Column("created_on", sa.Date(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["photo_id"], ["photo.id"], name=op.f("fk_palette_photo_id_photo")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_palette")),
        sa.UniqueConstraint("name", name=op.f("uq_palette_name")),
    )
    op.create_index(op.f("ix_palette_photo_id"), "palette", ["photo_id"])
    op.create_table(
        "palette_colour",
        sa.Column("colourway_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("palette_id", sa.Integer(), nullable=False),
        sa.Column("share_frac", sa.Double(), nullable=True),
        sa.CheckConstraint("share_frac >= 0 AND share_frac <= 1", name=op.f("ck_palette_colour_share_a_fraction")),
        sa.ForeignKeyConstraint(
            ["colourway_id"],
            ["colourway.id"],
            name=op.f("fk_palette_colour_colourway_id_colourway"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["palette_id"], ["palette.id"], name=op.f("fk_palette_colour_palette_id_palette"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("colourway_id", name=op.f("pk_palette_colour")),
    )
    op.create_index(op.f("ix_palette_colour_palette_id"), "palette_colour", ["palette_id"])
    op.add_column("colourway", sa.Column("target_kind", sa.String(length=40), nullable=False, server_default="typed"))
    op.add_column("colourway", sa.Column("target_reflectance", sa.JSON(none_as_null=True), nullable=True))
    # SQLite cannot add a constraint to a table that is there, so that a new column brings its own.
    double = sa.Double().compile(op.get_bind().dialect)
    op.execute(
        f"ALTER TABLE swatch ADD COLUMN noise_de00 {double} "
        "CONSTRAINT ck_swatch_noise_above_zero CHECK (noise_de00 > 0)"
    )
    op.execute(
        "ALTER TABLE swatch ADD COLUMN reads INTEGER DEFAULT 1 NOT NULL "
        "CONSTRAINT ck_swatch_reads_above_zero CHECK (reads > 0)"
    )


def _add_evenings() -> None:
    op.create_table(
        "evening",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("held_on", sa.Date(), nullable=False),
        sa.Column("base_id", sa.Integer(), nullable=False),
        sa.Column("liquor_l_kg", sa.Double(), nullable=False),
        sa.Column("stock_g_l", sa.Double(), nullable=False),
        sa.Column("judgement_id", sa.Uuid(), nullable=True),
        sa.Column("set_up", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.CheckConstraint("liquor_l_kg > 0", name=op.f("ck_evening_liquor_above_zero")),
        sa.CheckConstraint("stock_g_l > 0", name=op.f("ck_evening_stock_above_zero")),
        sa.ForeignKeyConstraint(["base_id"], ["base.id"], name=op.f("fk_evening_base_id_base")),
        sa.ForeignKeyConstraint(["judgement_id"], ["judgement.id"], name=op.f("fk_evening_judgement_id_judgement")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_evening")),
        sa.UniqueConstraint("name", name=op.f("uq_evening_name")),
    )
    op.create_table(
        "jar",
        sa.Column("evening_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("mass_g", exact(3), nullable=False),
        sa.Column("seat", sa.String(length=200), nullable=False),
        sa.Column("swatch_id", sa.Integer(), nullable=True),
        sa.CheckConstraint("mass_g > 0", name=op.f("ck_jar_mass_above_zero")),
        sa.CheckConstraint("number > 0", name=op.f("ck_jar_number_above_zero")),
        sa.ForeignKeyConstraint(
            ["evening_id"], ["evening.id"], name=op.f("fk_jar_evening_id_evening"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(["swatch_id"], ["swatch.id"], name=op.f("fk_jar_swatch_id_swatch"), ondelete="SET NULL"),
        sa.PrimaryKeyConstraint("evening_id", "number", name=op.f("pk_jar")),
        sa.UniqueConstraint("swatch_id", name=op.f("uq_jar_swatch_id")),
    )
    op.create_table(
        "jar_dye",
        sa.Column("evening_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("dye_name", sa.String(length=200), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("depth_owf", sa.Double(), nullable=False),
        sa.CheckConstraint("depth_owf > 0", name=op.f("ck_jar_dye_depth_above_zero")),
        sa.ForeignKeyConstraint(
            ["dye_name"], ["dye.name"], name=op.f("fk_jar_dye_dye_name_dye"), onupdate="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["evening_id", "number"],
            ["jar.evening_id", "jar.number"],
            name=op.f("fk_jar_dye_evening_id_number_jar"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("evening_id", "number", "dye_name", name=op.f("pk_jar_dye")),
    )
