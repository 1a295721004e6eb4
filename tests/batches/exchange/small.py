"""The sheets of a very small shop, one of each kind, that agree with each other."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

import pytest

from batches.exchange.errors import ImportRefusedError
from batches.exchange.rules.kinds import Clock
from batches.exchange.rules.writing import AS_OURS, Writing
from batches.exchange.selectors.checking import CheckedSheets, checked_sheets

CLOCK: Final = Clock(ZoneInfo("America/Chicago"), datetime(2026, 4, 1, 18, 0, tzinfo=UTC))

SMALL: Final[Mapping[str, str]] = {
    "people.csv": "username,display_name,role\nhand,A hand,bench\n",
    "models.csv": "code,name,length_mm\nM90,Model 90,90\n",
    "colorways.csv": "code,name\nGRN,Green\n",
    "places.csv": "code,name,kind\nSHELF,Shelf,shelf\nBENCH,Bench,bench\n",
    "equipment.csv": "code,name,kind,parts\nM1,Mold 1,mold,2\nW1,Wheel 1,wheel,4\n",
    "suppliers.csv": "code,name\nNORTH,Supplier North\n",
    "items.csv": """\
code,name,kind,unit,model,colorway,place,made_life_minutes
RESIN,Resin,resin,kg,,,SHELF,
REGRIND,Regrind,regrind,kg,,,SHELF,
ADH-A,Part A,adhesive,g,,,SHELF,
ADH-B,Part B,adhesive,g,,,SHELF,
MIX,Mixed adhesive,adhesive,g,,,BENCH,60
HALF,Half,half,each,M90,,SHELF,
BODY,Body,body,each,M90,,SHELF,
HOOK,Hook,hook,each,,,SHELF,
LURE,Lure,lure,each,M90,GRN,SHELF,
""",
    "offers.csv": """\
supplier,item,amount,unit,packs_min,lead_time_days,preferred,prices
NORTH,HOOK,1000,each,1,70,yes,1:45.00; 5:40.00
""",
    "stages.csv": """\
code,name,position,mixing
MOLD,Molding,10,
MIXING,Mixing,20,yes
GLUE,Gluing,30,
RIG,Rigging,40,
""",
    "scrap_reasons.csv": "code,name,stage\nSHORT,Short shot,MOLD\nLEAK,Leak,GLUE\nLOST,Lost,\n",
    "check_definitions.csv": """\
code,name,stage,defect,kind,unit,lower,upper,how_many,level,aql,fixed_pieces,accept_pieces
DUNK,Leak test,GLUE,LEAK,pass_fail,,,,plan,S3,1,,
WEIGH,Weight,MOLD,SHORT,measured,g,4.5,5.5,fixed,,,3,1
""",
    "customers.csv": "code,name\nCUST,A customer\n",
    "bills.csv": """\
item,stage,takes,role,amount,unit,makes,makes_unit,batch_amount,batch_unit,alternatives
HALF,MOLD,RESIN,,5,g,,,100,g,REGRIND:0.25
HALF,MOLD,REGRIND,by_product,1,g,,,,,
MIX,MIXING,ADH-A,,50,g,100,g,,,
MIX,MIXING,ADH-B,,50,g,100,g,,,
BODY,GLUE,HALF,,2,each,,,,,
BODY,GLUE,MIX,,400,mg,,,5,g,
LURE,RIG,BODY,,1,each,,,,,
LURE,RIG,HOOK,,2,each,,,,,
""",
    "opening_lots.csv": """\
at,item,amount,unit,value,lot
2026-03-01 17:00,RESIN,25,kg,100.00,RES-1
2026-03-01 17:00,ADH-A,500,g,30.00,ADHA-1
2026-03-01 17:00,ADH-B,500,g,30.00,ADHB-1
""",
    "supplier_orders.csv": """\
order,supplier,ordered_on,item,packs,amount,unit,price,promised_on
PO1,NORTH,2026-01-05,HOOK,2,1000,each,45.00,2026-03-16
""",
    "customer_orders.csv": """\
order,customer,ordered_on,item,pieces,price,promised_on
CO1,CUST,2026-03-02,LURE,40,6.50,2026-03-20
""",
    "receipts.csv": """\
receipt,at,supplier,order,item,amount,unit,lot,supplier_lot
DN1,2026-03-03 08:00,NORTH,PO1,HOOK,2000,each,HOOK-1,N-77
""",
    "lot_events.csv": """\
at,lot,event,amount,unit,place,reason
2026-03-03 09:20,ADHA-1,open,,,,
2026-03-05 16:00,RES-1,move,5,kg,BENCH,
2026-03-06 09:00,HOOK-1,hold,,,,pull test
""",
    "runs.csv": """\
batch,item,at,good,scrap,lots,equipment,factors,minutes,done_by,planned,complete
MD1,HALF,2026-03-02 10:00,50@M1-1; 50@M1-2,SHORT:4@M1-2,item:RESIN=600 g,M1,,30,hand,100,
MX1,MIX,2026-03-03 09:30,30 g,,ADHA-1,,,5,,,
GL1,BODY,2026-03-03 10:00,12@W1-1; 11@W1-2; 11@W1-3; 12@W1-4,LEAK:2@W1-3,batch:MX1,W1,\
humidity=40; index_seconds=15,45,hand,,
RG1,LURE,2026-03-04 10:00,22,,,,,20,hand,,
RG1,LURE,2026-03-04 14:00,20; second:3,LOST:1,,,,20,hand,,no
""",
    "checks.csv": """\
at,check,lot,entry_at,results,reason
2026-03-02 10:30,WEIGH,batch:MD1,,5.01@M1-1; 4.98@M1-2; 4.4,
2026-03-03 10:20,DUNK,batch:GL1,2026-03-03 10:00,0/4@W1-3; 0/16,all dry
""",
    "boxes.csv": """\
box,at,lot,pieces
BX1,2026-03-05 10:00,batch:RG1,30
BX1,2026-03-05 10:00,batch:RG1/second,1
""",
    "shipments.csv": """\
shipment,at,customer,order,box,lot,pieces,purpose,prices
SH1,2026-03-05 15:00,CUST,CO1,BX1,,,,
SH2,2026-03-05 15:30,CUST,,,batch:RG1,2,sample,
""",
    "complaints.csv": """\
told_on,defect,pieces,customer,box,lot,item,model,bought_first_on,bought_last_on,note
2026-03-20,LEAK,2,CUST,BX1,,,,,,took water
2026-03-21,LEAK,1,,,,,M90,2026-03-05,2026-03-10,
""",
}


def bytes_of(sheets: Mapping[str, str]) -> dict[str, bytes]:
    """Contents by file name, as a folder would give them."""
    return {name: text.encode() for name, text in sheets.items()}


def changed(file: str, old: str, new: str) -> dict[str, str]:
    """The small shop with one piece of one sheet written otherwise."""
    assert SMALL[file].count(old) == 1, f"{old!r} stands {SMALL[file].count(old)} times in {file}"
    return {**SMALL, file: SMALL[file].replace(old, new)}


def checked(sheets: Mapping[str, str]) -> CheckedSheets:
    """The sheets, read and checked on a fixed day."""
    return checked_sheets(bytes_of(sheets), CLOCK)


def problems_in(files: Mapping[str, bytes], writing: Writing = AS_OURS) -> list[str]:
    """The lines that checking refuses the files with."""
    with pytest.raises(ImportRefusedError) as refused:
        checked_sheets(files, CLOCK, writing)
    return refused.value.lines


def write(sheets: Mapping[str, str], folder: Path) -> Path:
    """Write the sheets into a folder."""
    for name, data in bytes_of(sheets).items():
        (folder / name).write_bytes(data)
    return folder
