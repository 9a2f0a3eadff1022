"""Run the library's own Modbus server: ``tcp PORT``, or ``rtu PATH`` behind a pseudo-terminal.

A program of its own, so that its event loop is none of the tests'. With ``rtu`` it lays a cable
between two pseudo-terminals, serves one and puts a link to the other at PATH. Holding registers
hold one pressure in every type and order; input registers hold a whole number and a status.
"""

import os
import select
import struct
import sys
import threading
import tty

from pymodbus import FramerType
from pymodbus.client.mixin import ModbusClientMixin
from pymodbus.datastore import (
    ModbusDeviceContext,
    ModbusSequentialDataBlock,
    ModbusServerContext,
)
from pymodbus.server import StartSerialServer, StartTcpServer

PRESSURE_BAR = 15.32
FLOAT = ModbusClientMixin.DATATYPE.FLOAT32
INT32 = ModbusClientMixin.DATATYPE.INT32


def swapped(registers: list[int]) -> list[int]:
    """Return registers with the bytes of each swapped, as some devices hold them."""
    return [struct.unpack("<H", struct.pack(">H", register))[0] for register in registers]


def holding() -> list[int]:
    """Return float in all four orders, then int32 in two, int16, and a status."""
    big = ModbusClientMixin.convert_to_registers(PRESSURE_BAR, FLOAT, word_order="big")
    little = ModbusClientMixin.convert_to_registers(PRESSURE_BAR, FLOAT, word_order="little")
    mbar = int(PRESSURE_BAR * 1000)
    whole = ModbusClientMixin.convert_to_registers(-mbar, INT32, word_order="big")
    turned = ModbusClientMixin.convert_to_registers(-mbar, INT32, word_order="little")
    return [*big, *little, *swapped(big), *swapped(little), *whole, *turned, mbar, 0]


def cable() -> tuple[str, str]:
    """Lay a wire between two pseudo-terminals and give their names."""
    ends = [os.openpty() for _ in range(2)]
    for end in (end for pair in ends for end in pair):
        tty.setraw(end)
    masters = [master for master, _ in ends]

    def carry() -> None:
        while True:
            ready, _, _ = select.select(masters, [], [])
            for master in ready:
                os.write(masters[1 - masters.index(master)], os.read(master, 4096))

    threading.Thread(target=carry, daemon=True).start()
    return os.ttyname(ends[0][1]), os.ttyname(ends[1][1])


def main(kind: str, where: str) -> None:
    device = ModbusDeviceContext(
        hr=ModbusSequentialDataBlock(1, holding()),
        ir=ModbusSequentialDataBlock(1, [1532, 1]),
    )
    context = ModbusServerContext(devices={1: device}, single=False)
    if kind == "tcp":
        StartTcpServer(context, address=("127.0.0.1", int(where)))
    else:
        ours, theirs = cable()
        os.symlink(theirs, where)
        StartSerialServer(context, framer=FramerType.RTU, port=ours, baudrate=19200, timeout=0.1)


if __name__ == "__main__":
    main(*sys.argv[1:])
