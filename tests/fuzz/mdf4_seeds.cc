// Writes the seeds of mdf4_fuzz into the folder it is given: mdf4_seeds tests/fuzz/seeds/mdf4
#include <fstream>

#include "signals/recording/mdf4_test_file.h"

int main(int count, char** words) {
  if (count != 2) return 2;
  for (const auto& seed : fuelwright::signals::mdf_test::seeds()) {
    std::ofstream out(std::string(words[1]) + "/" + seed.name, std::ios::binary);
    out.write(seed.bytes.data(), static_cast<std::streamsize>(seed.bytes.size()));
    if (!out) return 1;
  }
  return 0;
}
