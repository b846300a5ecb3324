/// Languages: trade words of German, French, Spanish, Italian, Portuguese, Dutch, Swedish, Danish,
/// Norwegian, Polish and Czech, put into the English words that the rules of trade_words.h know.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace fuelwright::signals {

/// Latin letters without their marks, small: "Kühlmittel" -> "kuhlmittel", "Ciśnienie" ->
/// "cisnienie". Other characters stay.
std::string folded(std::string_view word);

/// Each word, or the English words for it; articles and the like are left out. `note` tells what
/// was put into English.
std::vector<std::string> in_english(const std::vector<std::string>& words, std::string& note);

}  // namespace fuelwright::signals
