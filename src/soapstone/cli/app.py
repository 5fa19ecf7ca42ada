"""The table of commands. Each is imported only when it is used, so that help comes at once."""

from collections.abc import Sequence

from cyclopts import App, Parameter

from soapstone import __version__

COMMANDS = {
    "demo": "Make the demo job (a workboat's stern arch) and do the whole job with it.",
    "new": "Write a commented job file to start from.",
    "shape": "Start a job from a shape and the few numbers that one measures for it.",
    "survey": "Find points from taped distances, and what each may be off by.",
    "plan": "Give marks, cuts, dial stops, rolls and level readings of a job's tubes.",
    "route": "Find the tubes that get from here to there past what is in the way.",
    "check": "Certify that every tube clears what stands or swings around it.",
    "rescue": "Say what is still to do when a bend came out wrong, so that the tube lands.",
    "budget": "Say how near every tube will land, and which error matters most.",
    "strength": "Say what the frame carries: feet, give, reserve on yield and buckling.",
    "cope": "Give the cuts of ends that sit on other tubes or plates, and templates of them.",
    "bending": "Hold every bend against the bender, the floor and the tube itself.",
    "sheet": "Print a job's shop pack as a PDF.",
    "run": "Make a tube step by step; every step confirmed is kept in the shop log.",
    "log": "Show the shop log, take it out, bring it in, and say how springback drifts.",
    "inspect": "Hold a made tube, taped, against its drawing; say which bend is off.",
    "calibrate": "Learn springback and dial zero from trial bends.",
    "trial": "Say how to cut, mark, bend and measure a trial piece; learn from one.",
    "quote": "Say what a job costs to make, and how large and heavy its parcel is.",
    "nest": "Say which pieces to cut from which stick, for the least money.",
    "bench": "Show what the shop owns, and what is doubtful about it.",
    "convert": "Turn tubes into .csv and back, or into .step, .dxf, .glb, .stl, .svg.",
    "serve": "Open the shop's pages in a browser, also for a phone beside the bender.",
    "schema": "Print the JSON Schema of the job or the bench file.",
}


def app_for(arguments: Sequence[str]) -> App:
    """Make the table of commands: the one asked for has its whole help, the others a line."""
    app = App(
        name="soapstone",
        help="Bent round tube that fits: from where it must go to marks, dial stops and sheets.",
        version=__version__,
        default_parameter=Parameter(negative=()),
        help_format="plaintext",
    )
    for name, line in COMMANDS.items():
        place = f"soapstone.cli.{name}:command"
        if arguments and arguments[0] == name:
            app.command(place, name=name)
        else:
            app.command(place, name=name, help=line)
    return app
