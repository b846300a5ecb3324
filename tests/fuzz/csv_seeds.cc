// Writes the seeds of csv_fuzz into the folder it is given: the tops of the corpus files.
#include <algorithm>
#include <cctype>
#include <fstream>
#include <string>

#include "tests/corpus/corpus.h"

namespace {

constexpr std::size_t kMost = 1500;  // some twenty rows

bool write(const std::string& folder, std::string name, const std::string& bytes) {
  std::ranges::replace_if(
      name, [](char c) { return std::isalnum(static_cast<unsigned char>(c)) == 0; }, '_');
  std::ofstream out(folder + "/" + name, std::ios::binary);
  const std::string top = bytes.substr(0, kMost);
  out.write(top.data(), static_cast<std::streamsize>(top.size()));
  return static_cast<bool>(out);
}

}  // namespace

int main(int count, char** words) {
  if (count != 2) return 2;
  const std::string folder = words[1];
  bool ok = true;
  for (const auto& f : fuelwright::corpus::honest_files())
    ok = write(folder, f.name, f.bytes) && ok;
  for (const auto& f : fuelwright::corpus::dishonest_files()) {
    ok = write(folder, "no_" + f.name, f.bytes) && ok;
  }
  return ok ? 0 : 1;
}
