@echo off
rem Simulate an invented study, review it, print where the letter lies and open the desk on it. scripts/demo [--no-serve] [--out DIR]
rem Not tried on Windows yet: written from the sh script beside it.
setlocal
cd /d "%~dp0.."
set PYTHON=python
where py >nul 2>nul && set PYTHON=py -3
%PYTHON% scripts\bootstrap.py run -- scripts/demo.py %*
exit /b %ERRORLEVEL%
