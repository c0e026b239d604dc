"""The rating plate: the riveted plate that opens every sheet."""

from dataclasses import dataclass


@dataclass(frozen=True)
class PlateField:
    """One engraved label with its stamped figure."""

    label: str
    value: str


@dataclass(frozen=True)
class Plate:
    """What is stamped on the plate; an empty field is left off.

    number: the asset number, printed large; kind: "Cement mixer";
    maker_and_type: in words; serial, supply ("230 V, 50 Hz, 1 phase"), power ("0.75 kW"),
    speed ("1,420 rev/min"), mass ("68 kg"), meter ("168.0 h on 24 Nov 2026"), depot: with their
    units; more: any further labels, after the others.
    """

    number: str
    kind: str
    maker_and_type: str = ""
    serial: str = ""
    depot: str = ""
    supply: str = ""
    power: str = ""
    speed: str = ""
    mass: str = ""
    meter: str = ""
    more: tuple[PlateField, ...] = ()

    def fields(self) -> tuple[PlateField, ...]:
        """The fields that are filled, in the order in which they are engraved."""
        engraved = (
            PlateField("Maker and type", self.maker_and_type),
            PlateField("Serial no.", self.serial),
            PlateField("Supply", self.supply),
            PlateField("Power", self.power),
            PlateField("Speed", self.speed),
            PlateField("Mass", self.mass),
            PlateField("Meter", self.meter),
            PlateField("Depot", self.depot),
        )
        return tuple(field for field in engraved + self.more if field.value)
