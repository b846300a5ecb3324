/// The mixture the unit aims at, node by node of a table: what the calibration holds, or the wishes
/// of the sheet where it holds none.
#pragma once

#include "base/result.h"
#include "car/build/sheet.h"
#include "car/tables/calibration.h"

namespace fuelwright::advice {

/// lambda_target of the calibration, read off at the nodes of `grid`. Without one:
///
///   lambda = cruise (1 - s) + full s,  s = t^2 (3 - 2t),  t = (share - 0.75)/0.13 within 0..1
///                                                                                    (proposal.2)
///
/// by load_share(); the idle wish plays no part, where idle is being unknown. Errors: bad_input if
/// the calibration's targets stand over axes of another kind than `grid`.
Result<car::Surface> target_mixture(const car::Calibration& calibration, const car::Sheet& sheet,
                                    const car::Grid& grid);

/// `surface` read off at the nodes of `grid`, edges hold. Error bad_input if the kinds of the axes
/// differ, naming `what` and both kinds.
Result<car::Surface> read_off(const car::Surface& surface, const car::Grid& grid, const char* what);

}  // namespace fuelwright::advice
