#!/usr/bin/env bash
# Submit:  sbatch --nodes=4 --ntasks-per-node=32 deploy/slurm-job.sh studies/quarry-tipper-800v.toml
#SBATCH --job-name=paretorque
#SBATCH --cpus-per-task=1
set -euo pipefail
study=${1:?give a study file}
export OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1
address_file=$(mktemp -p "$PWD" scheduler-XXXXXX.json)
trap 'kill $(jobs -p) 2>/dev/null || true; rm -f "$address_file"' EXIT

dask scheduler --scheduler-file "$address_file" --port 0 --no-dashboard &
until [ -s "$address_file" ]; do sleep 1; done
srun dask worker --scheduler-file "$address_file" --nthreads 1 --no-dashboard \
    --preload optim.jobs.worker_start &
address=$(python3 -c 'import json, sys; print(json.load(open(sys.argv[1]))["address"])' "$address_file")
paretorque run "$study" --scheduler "$address" --workers "${SLURM_NTASKS:-1}"
