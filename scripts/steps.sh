# Sourced by lint.sh and test.sh: run every check to its end, then say which failed.
failed=()

step() { # a name, then the command
    local name="$1"
    shift
    printf '\n== %s\n' "$name"
    "$@" || failed+=("$name")
}

verdict() {
    if [ ${#failed[@]} -gt 0 ]; then
        printf '\nFAILED: %s\n' "$(IFS=,; echo "${failed[*]}" | sed 's/,/, /g')"
        exit 1
    fi
    printf '\nAll of it passed.\n'
}
