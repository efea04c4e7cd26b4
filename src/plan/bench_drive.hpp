#pragma once
// What a bench that takes commands must be driven within: the [drive] table of its file, and the laboratory's
// own checklist. docs/formats/bench.md explains every key.

#include <string>
#include <vector>

namespace ebbtide::plan {

/// Limits of a guarded run. Those without a value here have none that suits every bench: the file states
/// them.
struct DriveLimits {
    double near_zero_V = 0;         ///< the electrode reads as empty up to this
    double settle_tolerance = 0;    ///< relative: the electrode is at its voltage within this
    double settle_s = 0;            ///< and has arrived when it stayed there for so long
    double longest_rise_s = 0;      ///< from output on to arrived, else: abort
    double longest_charge_s = 0;    ///< from output on to the release, whatever the method asks
    double earth_within_s = 0;      ///< from the release to near zero, else: abort
    double longest_fall_s = 0;      ///< from the release to the end of the record
    double rest_s = 0;              ///< between replicates
    int unattended_replicates = 1;  ///< runs without a person's leave between them
    double hold_s = 0;              ///< charging time where the method states none; 0: the method must
    double wait_s = 0;              ///< from neutralising to reading the residual
    double residual_s = 1;          ///< the residual is read for so long
    double zero_s = 2;              ///< and the zero
    double prepare_within_s = 60;   ///< reading residual or zero may take so much longer, else: abort
    double silent_after_s = 0.5;    ///< without samples, else: abort
    double look_s = 0.02;           ///< the bench is looked at so often
};

}  // namespace ebbtide::plan
