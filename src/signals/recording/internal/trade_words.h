/// Trade words: what the name of a column says that it measures.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "signals/channels/quantity.h"

namespace fuelwright::signals {

/// "ENGINE_RUN_TIME", "engineRunTime", "Engine run-time" -> engine, run, time (lower case).
std::vector<std::string> words_of(std::string_view header);

struct NameGuess {
  Quantity what = Quantity::other;
  double confidence = 0;
  std::size_t words = 0;  ///< of the name that say so: more is more particular
  std::string reason;
};

/// Candidates by name, surest first; each quantity once, none below 0.3.
std::vector<NameGuess> guess_by_name(std::string_view header);
/// Does the name speak of an equivalence ratio?
bool names_equivalence(std::string_view header);
/// Does it speak of a vacuum?
bool names_vacuum(std::string_view header);
/// 2 for "bank 2", "B2S1", "trim_2"; 1 otherwise.
int bank_of(std::string_view header);

}  // namespace fuelwright::signals
