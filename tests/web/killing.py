"""The pages' server is killed in the middle of a tube, again and again; what was confirmed stays.

`python -m tests.web.killing FOLDER ROUNDS SEED` serves the pages in a child of its own each time,
presses as a phone does over a real connection, kills the child at a moment drawn by lot, and holds
the log against what the phone was told. It prints one JSON object.
"""

import http.client
import json
import os
import random
import signal
import socket
import sys
import threading
from pathlib import Path

import uvicorn
from fastapi import FastAPI

from soapstone.flow import at_bender
from soapstone.log.store import LOG_VARIABLE, log_path, open_log
from soapstone.web.guard import Guard
from soapstone.web.pages import bender
from soapstone.web.shop import Shop
from tests.web.phone import Phone, rail


def serve(folder, sock):
    front = FastAPI()
    front.include_router(bender.router(Shop(folder)))
    config = uvicorn.Config(Guard(front, ("127.0.0.1",)), log_level="critical")
    uvicorn.Server(config).run(sockets=[sock])


def asker(port):
    def ask(method, path, body):
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        try:
            headers = {"content-type": "application/json"} if body else {}
            connection.request(method, path, body, headers)
            answer = connection.getresponse()
            return answer.status, answer.read().decode()
        finally:
            connection.close()

    return ask


def round_of(folder, chance, told):
    """Serve, press until killed; `told` collects what the phone was told is kept."""
    sock = socket.socket()
    sock.bind(("127.0.0.1", 0))
    sock.listen(16)
    child = os.fork()
    if child == 0:
        try:
            serve(folder, sock)
        finally:
            os._exit(0)
    port = sock.getsockname()[1]
    sock.close()
    phone = Phone(asker(port))
    # a press takes about a tenth of a second: the moment falls anywhere in the first several
    timer = threading.Timer(chance.uniform(0.05, 1.2), os.kill, (child, signal.SIGKILL))
    timer.start()
    try:
        while True:
            if not phone.at["run"] or phone.title == "Finished":
                phone.begin()
            step = (phone.at["run"], int(phone.at["number"]))
            press = chance.choice(["on", "on", "on", "on", "short", "undo"])
            if press == "undo" and step[1] > 1:
                phone.undo()
            elif press == "short" and phone.measuring:
                phone.measured(-2)
            else:
                phone.go_on()
            if not phone.said:
                told.append(step)
    except (OSError, http.client.HTTPException):
        pass  # the server is dead: whatever was asked last was never answered
    finally:
        timer.join()
        os.waitpid(child, 0)


def kept(runs):
    """Give all steps of these runs in the log."""
    with open_log(log_path()) as log:
        return {(run, event["number"]) for run in runs for event in log.events(run)}


def main(folder, rounds, seed):
    os.environ[LOG_VARIABLE] = str(folder / "log.sqlite")
    job = rail(folder)
    at_bender.standing(job, "port rail", log_path())  # what is loaded late, once for all children
    chance, told, more = random.Random(seed), [], 0
    for _ in range(rounds):
        round_of(folder, chance, told)
        there = kept({run for run, _ in told})
        lost = [step for step in told if step not in there]
        if lost:
            break
        more = len(there - set(told))
    sys.stdout.write(json.dumps({"told": len(told), "lost": len(lost), "kept_untold": more}))


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
