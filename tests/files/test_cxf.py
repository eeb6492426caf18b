"""CxF3 files of our own making, written from memory of ISO 17972-1."""

import pytest

from dyewright.errors import InputError
from dyewright.files.swatches import read_sample, read_swatches

NAMESPACE = "http://colorexchangeformat.com/CxF3-core"
CXF = """<?xml version="1.0" encoding="UTF-8"?>
<cc:CxF xmlns:cc="{namespace}" xmlns:own="urn:some-vendor">
  <cc:FileInformation><cc:Creator>a hand</cc:Creator></cc:FileInformation>
  <cc:Resources>
    <cc:ObjectCollection>{objects}</cc:ObjectCollection>
    <cc:ColorSpecificationCollection>
      <cc:ColorSpecification Id="curve">
        <cc:MeasurementSpec>
          <cc:MeasurementType>Spectrum_Reflectance</cc:MeasurementType>
          <cc:WavelengthRange StartWL="400" Increment="10"/>
        </cc:MeasurementSpec>
      </cc:ColorSpecification>
      <cc:ColorSpecification Id="lab">
        <cc:TristimulusSpec><cc:Illuminant>D65</cc:Illuminant><cc:Observer>10_Degree</cc:Observer></cc:TristimulusSpec>
      </cc:ColorSpecification>
    </cc:ColorSpecificationCollection>
  </cc:Resources>
  <own:Extension><own:Object Colour="unknown"/></own:Extension>
</cc:CxF>
"""
CURVE = '<cc:ReflectanceSpectrum ColorSpecification="curve"{more}>{values}</cc:ReflectanceSpectrum>'
LAB = (
    '<cc:ColorCIELab ColorSpecification="lab"><cc:L>{}</cc:L><cc:A>{}</cc:A><cc:B>{}</cc:B>'
    "<own:Noise>0.1</own:Noise></cc:ColorCIELab>"
)


def an_object(name, *colours, tags=""):
    return (
        f'<cc:Object ObjectType="Standard" Name="{name}" Id="o1"><cc:CreationDate>2026-03-12T10:00:00</cc:CreationDate>'
        f"<cc:ColorValues>{''.join(colours)}</cc:ColorValues>{tags}</cc:Object>"
    )


def curve(value, *, more="", count=31):
    return CURVE.format(more=more, values=" ".join([str(value)] * count))


def file_of(*objects, namespace=NAMESPACE):
    return CXF.format(objects="".join(objects), namespace=namespace).encode()


@pytest.mark.parametrize("namespace", [NAMESPACE, "urn:a-later-version"])
def test_curves_are_read_with_their_recipes_from_the_names(namespace):
    data = file_of(
        an_object("undyed on merino", curve(0.8)),
        an_object("Lake blue 0.5 % on merino", curve(0.3)),
        namespace=namespace,
    )
    base, blue = read_swatches(data, "measured.cxf")

    assert (base.depths_owf, base.base) == ({}, "merino")
    assert base.reflectance == pytest.approx([0.8] * 31)
    assert blue.depths_owf == {"Lake blue": 0.005}
    assert blue.source == "spectrophotometer"


def test_a_curve_may_say_its_own_first_wavelength():
    # 36 values from 380 nm by 10 nm end at 730 nm; the value at 400 nm is the third.
    values = " ".join(f"{0.2 + 0.01 * place:.2f}" for place in range(36))
    data = file_of(an_object("Rose 1 % on silk", CURVE.format(more=' StartWL="380"', values=values)))
    (swatch,) = read_swatches(data, "rose.cxf")
    assert swatch.reflectance[0] == pytest.approx(0.22)
    assert swatch.reflectance[-1] == pytest.approx(0.52)


def test_labs_take_the_light_of_their_specification():
    (swatch,) = read_swatches(file_of(an_object("Rose 1 % on silk", LAB.format(55, 30.5, -8))), "rose.cxf")
    assert (swatch.lab, swatch.illuminant, swatch.observer) == ((55, 30.5, -8), "D65", 10)


def test_a_curve_is_preferred_to_the_lab_beside_it():
    (swatch,) = read_swatches(file_of(an_object("Rose 1 % on silk", LAB.format(55, 30, 8), curve(0.3))), "rose.cxf")
    assert swatch.lab is None
    assert swatch.reflectance is not None


def test_several_spectra_of_an_object_are_readings_of_it():
    (swatch,) = read_swatches(file_of(an_object("Rose 1 % on silk", curve(0.28), curve(0.32))), "rose.cxf")
    assert swatch.reads == 2
    assert swatch.reflectance == pytest.approx([0.30] * 31)


def test_a_recipe_may_stand_in_tags():
    tags = (
        '<cc:TagCollection><cc:Tag Name="Dye" Value="Rose"/><cc:Tag Name="depth_percent" Value="1"/>'
        '<cc:Tag Name="base" Value="silk"/><cc:Tag Name="dye_lot" Value="17"/></cc:TagCollection>'
    )
    (swatch,) = read_swatches(file_of(an_object("number 4", curve(0.3), tags=tags)), "rose.cxf")
    assert (swatch.depths_owf, swatch.base, swatch.dye_lots) == ({"Rose": 0.01}, "silk", {"Rose": "17"})


def test_a_target_may_be_a_cxf_file():
    sample = read_sample(file_of(an_object("the customer's shawl", LAB.format(45, -20, -5))), "shawl.cxf")
    assert sample.lab == (45, -20, -5)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_a_document_type_is_refused(encoding):
    text = '<?xml version="1.0"?><!DOCTYPE CxF [<!ENTITY a "b"><!ENTITY c "&a;&a;">]><CxF>&c;</CxF>'
    with pytest.raises(InputError, match=r"evil\.cxf declares a document type \(DOCTYPE\)"):
        read_swatches(text.encode(encoding), "evil.cxf")


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"<CxF><Object", "not well-formed XML"),
        (b"<svg/>", "XML but not CxF: its outermost element is svg"),
        (file_of(), "holds no object with a ReflectanceSpectrum"),
        (file_of(an_object("Rose 1 %", curve(0.3, count=4))), "object Rose 1 %: 4 values from 400 nm by 10 nm"),
        (file_of(an_object("Rose 1 % on silk", curve("x"))), "object Rose 1 % on silk, column R400: 'x' is not a numb"),
        (file_of(an_object("Rose 1 %", curve(0.3))), "object Rose 1 %, column base: the name of the base is missing"),
    ],
)
def test_what_is_wrong_is_named(data, says):
    with pytest.raises(InputError, match=rf"x\.cxf.*{says}"):
        read_swatches(data, "x.cxf")
