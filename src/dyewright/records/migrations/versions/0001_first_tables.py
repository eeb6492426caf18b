"""First tables: studio, shelf, runs, lots, photos, judgements.

Revision 0001. Types are spelt out here, so that a later change of a model does not change history.
"""

from decimal import Decimal

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def exact(places: int) -> sa.Numeric[Decimal]:
    """An exact number: SQLite keeps whole units of the last digit."""
    return sa.Numeric(18, places).with_variant(sa.BigInteger(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "base",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("fibre_frac", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("is_superwash", sa.Boolean(), nullable=False),
        sa.Column("undyed_l", sa.Double(), nullable=True),
        sa.Column("undyed_a", sa.Double(), nullable=True),
        sa.Column("undyed_b", sa.Double(), nullable=True),
        sa.Column("skein_g", sa.Double(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_base")),
        sa.UniqueConstraint("name", name=op.f("uq_base_name")),
    )
    op.create_table(
        "dye",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("dye_class", sa.String(length=40), nullable=False),
        sa.Column("is_blend", sa.Boolean(), nullable=False),
        sa.Column("is_fluorescent", sa.Boolean(), nullable=False),
        sa.Column("price_per_g", exact(6), nullable=True),
        sa.Column("on_shelf_g", exact(3), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.CheckConstraint("on_shelf_g >= 0", name=op.f("ck_dye_stock_not_negative")),
        sa.CheckConstraint("price_per_g >= 0", name=op.f("ck_dye_price_not_negative")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_dye")),
        sa.UniqueConstraint("name", name=op.f("uq_dye_name")),
    )
    op.create_table(
        "photo_content",
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("sha256", name=op.f("pk_photo_content")),
    )
    op.create_table(
        "studio",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("is_demo", sa.Boolean(), nullable=False),
        sa.Column("spoons", sa.String(length=40), nullable=False),
        sa.Column("water_alkalinity_mg_l", sa.Double(), nullable=True),
        sa.Column("water_ph", sa.Double(), nullable=True),
        sa.Column("water_temperature_c", sa.Double(), nullable=True),
        sa.Column("scale_resolution_g", sa.Double(), nullable=False),
        sa.Column("tolerance_de00", sa.Double(), nullable=False),
        sa.Column("is_tonal_wanted", sa.Boolean(), nullable=False),
        sa.Column("last_run_number", sa.Integer(), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_studio_only_one")),
        sa.CheckConstraint("scale_resolution_g > 0", name=op.f("ck_studio_scale_above_zero")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_studio")),
    )
    op.create_table(
        "vessel",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("volume_l", sa.Double(), nullable=False),
        sa.Column("heating", sa.String(length=40), nullable=False),
        sa.Column("diameter_m", sa.Double(), nullable=True),
        sa.Column("has_lid", sa.Boolean(), nullable=False),
        sa.Column("power_w", sa.Double(), nullable=True),
        sa.Column("turns_per_min", sa.Double(), nullable=True),
        sa.CheckConstraint("volume_l > 0", name=op.f("ck_vessel_volume_above_zero")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_vessel")),
        sa.UniqueConstraint("name", name=op.f("uq_vessel_name")),
    )
    op.create_table(
        "colourway",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("target_l", sa.Double(), nullable=True),
        sa.Column("target_a", sa.Double(), nullable=True),
        sa.Column("target_b", sa.Double(), nullable=True),
        sa.Column("target_from", sa.Text(), nullable=False),
        sa.Column("predicted_l", sa.Double(), nullable=True),
        sa.Column("predicted_a", sa.Double(), nullable=True),
        sa.Column("predicted_b", sa.Double(), nullable=True),
        sa.Column("base_id", sa.Integer(), nullable=True),
        sa.Column("created_on", sa.Date(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["base_id"], ["base.id"], name=op.f("fk_colourway_base_id_base")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_colourway")),
        sa.UniqueConstraint("name", name=op.f("uq_colourway_name")),
    )
    op.create_table(
        "swatch",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("base_name", sa.String(length=200), nullable=False),
        sa.Column("reflectance", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("lab_l", sa.Double(), nullable=True),
        sa.Column("lab_a", sa.Double(), nullable=True),
        sa.Column("lab_b", sa.Double(), nullable=True),
        sa.Column("illuminant", sa.String(length=20), nullable=False),
        sa.Column("observer", sa.Integer(), nullable=False),
        sa.Column("source", sa.String(length=40), nullable=False),
        sa.Column("dyed_on", sa.Date(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("origin", sa.JSON(none_as_null=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["base_name"], ["base.name"], name=op.f("fk_swatch_base_name_base"), onupdate="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_swatch")),
    )
    op.create_table(
        "colourway_dye",
        sa.Column("colourway_id", sa.Integer(), nullable=False),
        sa.Column("dye_name", sa.String(length=200), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("depth_owf", sa.Double(), nullable=False),
        sa.CheckConstraint("depth_owf >= 0", name=op.f("ck_colourway_dye_depth_not_negative")),
        sa.ForeignKeyConstraint(
            ["colourway_id"], ["colourway.id"], name=op.f("fk_colourway_dye_colourway_id_colourway"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["dye_name"], ["dye.name"], name=op.f("fk_colourway_dye_dye_name_dye"), onupdate="CASCADE"
        ),
        sa.PrimaryKeyConstraint("colourway_id", "dye_name", name=op.f("pk_colourway_dye")),
    )
    op.create_table(
        "run",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("card_toml", sa.Text(), nullable=False),
        sa.Column("sheet", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("package_version", sa.String(length=40), nullable=False),
        sa.Column("data_version", sa.String(length=64), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("colourway_id", sa.Integer(), nullable=True),
        sa.Column("base_id", sa.Integer(), nullable=True),
        sa.Column("repeats_run_id", sa.Uuid(), nullable=True),
        sa.ForeignKeyConstraint(["base_id"], ["base.id"], name=op.f("fk_run_base_id_base")),
        sa.ForeignKeyConstraint(["colourway_id"], ["colourway.id"], name=op.f("fk_run_colourway_id_colourway")),
        sa.ForeignKeyConstraint(
            ["repeats_run_id"],
            ["run.id"],
            name=op.f("fk_run_repeats_run_id_run"),
            initially="DEFERRED",
            deferrable=True,
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_run")),
        sa.UniqueConstraint("number", name=op.f("uq_run_number")),
    )
    op.create_table(
        "swatch_dye",
        sa.Column("swatch_id", sa.Integer(), nullable=False),
        sa.Column("dye_name", sa.String(length=200), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("depth_owf", sa.Double(), nullable=False),
        sa.CheckConstraint("depth_owf >= 0", name=op.f("ck_swatch_dye_depth_not_negative")),
        sa.ForeignKeyConstraint(
            ["dye_name"], ["dye.name"], name=op.f("fk_swatch_dye_dye_name_dye"), onupdate="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["swatch_id"], ["swatch.id"], name=op.f("fk_swatch_dye_swatch_id_swatch"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("swatch_id", "dye_name", name=op.f("pk_swatch_dye")),
    )
    op.create_table(
        "event",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("run_id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("happened_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("detail", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("corrects", sa.Uuid(), nullable=True),
        sa.CheckConstraint(
            "(kind = 'correction') = (corrects IS NOT NULL)", name=op.f("ck_event_a_correction_corrects")
        ),
        sa.ForeignKeyConstraint(
            ["corrects"], ["event.id"], name=op.f("fk_event_corrects_event"), initially="DEFERRED", deferrable=True
        ),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_event_run_id_run")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_event")),
        sa.UniqueConstraint("corrects", name=op.f("uq_event_corrects")),
    )
    op.create_index(op.f("ix_event_run_id_happened_at"), "event", ["run_id", "happened_at"], unique=False)
    op.create_table(
        "lot",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("run_id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("kept_on", sa.Date(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("search_text", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_lot_run_id_run")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lot")),
        sa.UniqueConstraint("name", name=op.f("uq_lot_name")),
    )
    op.create_index(op.f("ix_lot_kept_on"), "lot", ["kept_on"], unique=False)
    op.create_index(op.f("ix_lot_run_id"), "lot", ["run_id"], unique=False)
    op.create_table(
        "photo",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("run_id", sa.Uuid(), nullable=True),
        sa.Column("media_type", sa.String(length=100), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("width_px", sa.Integer(), nullable=False),
        sa.Column("height_px", sa.Integer(), nullable=False),
        sa.Column("taken_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_photo_run_id_run")),
        sa.ForeignKeyConstraint(["sha256"], ["photo_content.sha256"], name=op.f("fk_photo_sha256_photo_content")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photo")),
    )
    op.create_index(op.f("ix_photo_run_id"), "photo", ["run_id"], unique=False)
    op.create_table(
        "run_dye",
        sa.Column("run_id", sa.Uuid(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("depth_owf", sa.Double(), nullable=False),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_run_dye_run_id_run")),
        sa.PrimaryKeyConstraint("run_id", "position", name=op.f("pk_run_dye")),
    )
    op.create_index(op.f("ix_run_dye_name"), "run_dye", ["name"], unique=False)
    op.create_table(
        "judgement",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("run_id", sa.Uuid(), nullable=True),
        sa.Column("photo_id", sa.Uuid(), nullable=False),
        sa.Column("judged_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("result", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("package_version", sa.String(length=40), nullable=False),
        sa.ForeignKeyConstraint(["photo_id"], ["photo.id"], name=op.f("fk_judgement_photo_id_photo")),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_judgement_run_id_run")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_judgement")),
    )
    op.create_index(op.f("ix_judgement_photo_id"), "judgement", ["photo_id"], unique=False)
    op.create_index(op.f("ix_judgement_run_id"), "judgement", ["run_id"], unique=False)
    op.create_table(
        "skein",
        sa.Column("lot_id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("mass_g", exact(3), nullable=True),
        sa.Column("lab_l", sa.Double(), nullable=True),
        sa.Column("lab_a", sa.Double(), nullable=True),
        sa.Column("lab_b", sa.Double(), nullable=True),
        sa.Column("matching_set", sa.String(length=40), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.CheckConstraint("mass_g > 0", name=op.f("ck_skein_mass_above_zero")),
        sa.CheckConstraint("number > 0", name=op.f("ck_skein_number_above_zero")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_skein_lot_id_lot"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("lot_id", "number", name=op.f("pk_skein")),
    )
