/// The fuel system for an outlook: the sheet's, with what was measured of it, as a recorded pull
/// shows it.
#pragma once

#include <vector>

#include "advice/outlook/supply_ahead.h"
#include "service/estimate_ground.h"

namespace fuelwright::service {

/// For advice::OutlookOptions::supply. `table`: VE that the unit will give fuel by, `aim` its
/// mixture; empty for a table of factors, of which no flow is known. Errors: those of
/// advice::drawn_supply().
Result<std::vector<physics::supply::System>> supply_seen(const Ground& ground,
                                                         const car::Surface& table,
                                                         const car::Surface& aim);

}  // namespace fuelwright::service
