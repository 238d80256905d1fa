"""A sensor in software: kinematics, sensor errors, a BLE peripheral, a virtual radio, an invented squad."""
