"""The job file as typed data: points, keep-outs, tubes, loads; and the bench it is made on."""
