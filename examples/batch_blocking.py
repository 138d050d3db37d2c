"""Do a job file from a script without ``async``, and keep the report as JSON: python batch_blocking.py [JOB]"""

import json
import sys
from pathlib import Path

from gingerly import batch, job, report

HERE = Path(__file__).parent
path = Path(sys.argv[1]) if len(sys.argv) > 1 else HERE / "turned_blanks.toml"

summary = batch.run_blocking(job.read(path))
print(json.dumps(report.document(summary), indent=2, ensure_ascii=False))
sys.exit(report.exit_code(summary))
