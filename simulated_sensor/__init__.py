"""A sensor in software: lift and jump kinematics, sensor errors, a BLE peripheral, a virtual radio, an invented squad."""
