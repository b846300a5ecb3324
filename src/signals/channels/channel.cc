#include "signals/channels/channel.h"

#include <algorithm>

#include "base/contract.h"

namespace fuelwright::signals {

const Channel* Recording::find(Quantity what, int bank) const {
  for (const Channel& c : channels) {
    if (c.what == what && c.bank == bank) return &c;
  }
  return nullptr;
}

const Segment& Recording::segment_of(std::size_t row) const {
  EXPECTS(row < rows);
  const auto after = std::ranges::upper_bound(segments, row, {}, &Segment::first);
  EXPECTS(after != segments.begin());
  return *(after - 1);
}

const char* name_of(Pace pace) {
  switch (pace) {
    case Pace::timed:
      return "timed";
    case Pace::stated_rate:
      return "stated_rate";
    case Pace::untimed:
      return "untimed";
    case Pace::unordered:
      return "unordered";
  }
  broken_contract("a Pace", __FILE__, __LINE__);
}

const char* name_of(Simultaneity verdict) {
  switch (verdict) {
    case Simultaneity::simultaneous:
      return "simultaneous";
    case Simultaneity::polled_in_turn:
      return "polled_in_turn";
    case Simultaneity::unknown:
      return "unknown";
  }
  broken_contract("a Simultaneity", __FILE__, __LINE__);
}

}  // namespace fuelwright::signals
