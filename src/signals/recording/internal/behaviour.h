/// Behaviour: whether columns move together as the quantities they are taken for must.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "signals/channels/quantity.h"

namespace fuelwright::signals {

/// Evidence from behaviour about one column.
struct Evidence {
  double doubt = 1;     ///< multiplies the doubt: below 1 supports
  std::string reason;   ///< for people; empty if nothing can be said
  std::string against;  ///< set when the behaviour contradicts the quantity
};

/// Another column by the quantity it was taken for; empty when there is none (values as found).
struct Column {
  const std::vector<double>* values = nullptr;
  double factor = 1;  ///< towards SI, for its sign and size
};
struct Companions {
  Column rpm, map, throttle, speed, load;
};

/// Correlation of two columns over at most 20,000 rows in which both are there and the engine turns
/// (above 500 rpm, when a column of engine speed is given); empty when fewer than 50 such rows or
/// when one of them hardly moves.
std::optional<double> correlation(const std::vector<double>& a, const std::vector<double>& b,
                                  const std::vector<double>* rpm);

/// Manifold pressure rises with throttle or load; air flow with pressure times speed; a temperature
/// moves slowly; run time never falls; engine speed keeps fixed ratios to road speed.
Evidence behaviour_of(Quantity what, const Column& own, const Companions& with);

}  // namespace fuelwright::signals
