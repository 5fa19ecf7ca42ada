"""The shop in a browser: pages that draw, fit, plan and bend by calling what the commands call.

`serve` starts it, `shop` is the folder of jobs, `desk` one open job with its way back, `guard`
decides who may come in, `look` how it all looks. Pages are in `pages`, one file each.
"""
