"""Cards that tests of studios plan from."""

CHOIR = """
title = "Choir shawls"
[yarn]
fibre = { wool = 70, silk = 30 }
dry = "300 g"
skeins = 3
[[dye]]
name = "Lagoon"
class = "acid milling"
depth = "0.6 %"
[bath]
water = "9 L"
[water]
alkalinity = "95 mg/L"
[[assistant]]
kind = "white vinegar 5 %"
amount = "60 mL"
[[pot]]
volume = "12 L"
power = "1800 W"
heat = "induction"
"""
